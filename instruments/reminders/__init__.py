"""Who must be told what, once: plans the notices that the ledger then sends."""
