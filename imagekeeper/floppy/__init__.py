"""Floppy disk tracks: how they are laid out, and sectors to cells and back."""
