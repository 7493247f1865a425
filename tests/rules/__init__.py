"""Rules of the house that hold for every topic: contracts, budgets, documents."""
