"""People, roles, authorisations, signatures."""
