"""Pages of procedures: reading revisions, drafting them section by section, approving and retiring them."""
