"""Pages of the Lab place: its sections, plain facts, agreements, bench hours and details."""
