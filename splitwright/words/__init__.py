"""The words of sheets and answers: phrases in a language, and the house names that a labels file gives."""

from splitwright.words.said import Piece, Said
from splitwright.words.words import Words, english

__all__ = ["Piece", "Said", "Words", "english"]
