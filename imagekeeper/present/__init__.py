"""Pages and pictures: text in, text out."""
