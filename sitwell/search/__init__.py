"""Wishes to set-ups: aims, guards, solver, leeway, reasons."""
