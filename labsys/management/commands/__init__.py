"""Commands of the site, one module each; each parses, calls one operation, answers."""
