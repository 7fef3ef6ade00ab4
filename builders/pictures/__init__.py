"""Invented pictures that nets and corrections learn from."""
