"""The service book: the document of a machine model, read, checked and pinned by its revision."""

from witnessmark.book.errors import BookError, BookErrors
from witnessmark.book.load import load_book, load_book_text
from witnessmark.book.model import Book
from witnessmark.book.revision import canonical, from_canonical, revision
from witnessmark.book.select import access_for, selection, steps
from witnessmark.book.system import archetypes

__all__ = [
    "Book",
    "BookError",
    "BookErrors",
    "access_for",
    "archetypes",
    "canonical",
    "from_canonical",
    "load_book",
    "load_book_text",
    "revision",
    "selection",
    "steps",
]
