"""Survivors that change no result, each with its reason; by `Mutant.name`, so that a change of the code drops them."""

from __future__ import annotations

ARGUED: dict[str, str] = {}
