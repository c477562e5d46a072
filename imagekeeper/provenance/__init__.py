"""What is known about a carrier: what it is, who read it and how, what that proves, what happened to it."""
