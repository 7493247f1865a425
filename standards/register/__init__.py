"""Which standards and elements the laboratory holds, their values, and from when to when those are valid.

Lives here: standards, elements, calibrations of standards with the values they gave. Certificates, issuers and
the chain upward live in ``traceability``.
"""
