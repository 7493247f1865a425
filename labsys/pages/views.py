"""Pages that belong to no topic: help, and the page that shows every element. They read nothing from the database."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from labsys.pages import help, samples


def help_index(request: HttpRequest) -> HttpResponse:
    """List the pages of help."""
    return render(request, "labsys/help/index.html", {"pages": help.pages()})


def help_page(request: HttpRequest, slug: str) -> HttpResponse:
    """Show one page of help."""
    page = help.find(slug)
    if page is None:
        raise Http404(f"no help page named {slug}")
    return render(request, "labsys/help/page.html", {"page": page})


def elements(request: HttpRequest) -> HttpResponse:
    """Show every element of the pages with invented values, for eyes and for the accessibility checks."""
    return render(request, "labsys/help/elements.html", samples.context(request))
