"""The certificate as plain frozen data: everything its pages say, and nothing about how they look.

Lives here: the parts of a document, its canonical text, what a complete one must hold, and how it is gathered from a
submission. May not live here: pages, files, numbers.
"""

from instruments.certificates.document.missing import missing_items
from instruments.certificates.document.parts import FORMAT, Document
from instruments.certificates.document.text import DocumentUnreadable, dump, load

__all__ = ["FORMAT", "Document", "DocumentUnreadable", "dump", "load", "missing_items"]
