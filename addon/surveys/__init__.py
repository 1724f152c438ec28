"""What was found of the scene's parts, and what is planned for them."""
