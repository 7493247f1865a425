"""Forms of traceability: a certificate with its values, its review, issuers and their scopes."""
