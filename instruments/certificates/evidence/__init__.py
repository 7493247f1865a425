"""The evidence behind a certificate as one file: what was issued, what was read, the chain upward, who did what.

Lives here: collecting what is on record and packing it. It changes nothing; the act that gives it away is an operation.
"""

from instruments.certificates.evidence.packing import pack

__all__ = ["pack"]
