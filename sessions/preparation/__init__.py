"""What a plan rests on: match sheets, giveaway checks, mends, passages, prepared audio."""
