"""The jobs that people have: each joins the parts and may touch the user's files."""
