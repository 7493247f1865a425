"""What to check and where: procedures, their revisions (drafted, approved, frozen), the points a session should take."""
