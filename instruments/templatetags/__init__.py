"""Template tags of instruments. They format and draw; they ask the database nothing."""
