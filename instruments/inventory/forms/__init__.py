"""Forms of the inventory: what a page may send, read into what an act takes."""
