"""What is sent, the client's page, questions, the yes."""
