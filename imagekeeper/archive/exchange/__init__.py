"""Handing carriers on and taking them in: bags, replicas, and repair from them."""
