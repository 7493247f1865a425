"""No tables, no acts: pages that span topics, search, first pages, the demo laboratory."""
