"""Template tags of the site. They format and draw; they ask the database nothing."""
