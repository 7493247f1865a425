"""Pages of people: lists, one person, what is decided about them, and everybody's own account."""
