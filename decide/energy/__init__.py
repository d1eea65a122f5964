"""What an appliance uses, by label, law or meter, and what a tariff makes of it."""
