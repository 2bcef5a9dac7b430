"""What people do with their own account: password, tokens, and what their roles allow."""
