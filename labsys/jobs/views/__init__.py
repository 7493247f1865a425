"""Pages of the program's run: jobs and what is owed, messages a person must decide about."""
