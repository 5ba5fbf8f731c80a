"""What a person does. One function is one thing done, one transaction, its ledger entries."""
