"""The string: where it runs, how it is held and pulled, what it does to the limbs."""
