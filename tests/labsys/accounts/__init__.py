"""People, their roles, authorisations, tokens and signatures."""
