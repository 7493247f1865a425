"""From the document to its pages: what the template is told, and the file that the renderer makes.

Lives here: layout. May not live here: anything the document doesn't say already, the clock, the database.
"""

from instruments.certificates.printing.pdf import RenderingFailed, pdf_of
from instruments.certificates.printing.signs import SignNotInType, require_printable

__all__ = ["RenderingFailed", "SignNotInType", "pdf_of", "require_printable"]
