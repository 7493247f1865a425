"""Pages of certificates: the list, one with its chains, its exact file, signing, numbers, public verification."""
