"""Records, consent and erasure."""
