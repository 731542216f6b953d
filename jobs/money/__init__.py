"""What is due, paid, invoiced, given back and reported."""
