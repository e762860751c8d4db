"""What every part of the interface looks like, in every state: for the page of patterns and for the tests."""
