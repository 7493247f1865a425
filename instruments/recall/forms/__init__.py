"""Forms of recall: what a page may send, read into what an act takes."""
