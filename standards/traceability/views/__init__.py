"""Pages of traceability: receiving and reviewing certificates, chains, issuers with their scopes."""
