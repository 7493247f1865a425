"""The laboratory's own facts: as of any day, changed only with a reason."""
