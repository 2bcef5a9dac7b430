"""From demand, as numbers, to a recommendation, and from a person's yes to the policy in force."""
