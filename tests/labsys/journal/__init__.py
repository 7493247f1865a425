"""The journal: its door, its chain, its guards."""
