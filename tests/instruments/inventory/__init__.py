"""The inventory: what exists, where it is, who keeps it."""
