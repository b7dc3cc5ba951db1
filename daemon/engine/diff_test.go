package engine

// firstDifference of two texts, with what stands around it.
func firstDifference(a, b string) string {
	i := 0
	for i < min(len(a), len(b)) && a[i] == b[i] {
		i++
	}
	from := max(0, i-80)
	return "…" + a[from:min(len(a), i+80)] + "…\nagainst\n…" + b[from:min(len(b), i+80)] + "…"
}
