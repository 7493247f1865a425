"""Pages of the register: the list of standards, a standard as of any day, and the acts on it."""
