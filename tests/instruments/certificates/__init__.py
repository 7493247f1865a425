"""Tests of certificates: the document, its pages, numbers, sign-off, rendering, verification."""
