"""From a priced design to the client’s yes: choices, papers, link, questions, certificate."""
