package alerts

// Sign is what hangs on the door while the bottles behind it are a danger: its
// lines, the largest first. It needs no numbers.
func Sign() []string {
	return []string{
		"Keep out",
		"Bottles in here are under pressure and may burst.",
		"Do not go in. Do not touch, move or open anything. Keep children and animals away.",
		"If anyone is hurt, call the emergency services. Do not rub, rinse or press a hurt eye.",
	}
}

// Household is the same for those who live with the bottles, in plain words, to
// be sent or read out.
func Household() []string {
	return []string{
		"Some bottles of home-made beer have more gas in them than their glass may bear. A bottle can burst by itself, and sooner when it is touched, moved or warmed.",
		"Please stay out of there, keep the door shut, and keep children and animals out, also when all is quiet. Don't look, tidy up or rescue anything.",
		"Please leave the heating off in there. Somebody will see to the bottles when they have been cold for a day or two.",
		"If you hear a bang or breaking glass, don't go in. Say so to whoever brewed it.",
		"If anyone is hurt, call the emergency services. Do not rub, rinse or press a hurt eye, and pull nothing out: shield it with a cup.",
	}
}
