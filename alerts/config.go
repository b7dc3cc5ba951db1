package alerts

import "time"

// Config are the thresholds of the rules. Zero values are filled by Defaults.
type Config struct {
	// TooWarmC raises too-warm after WarmFor (common practice, no source).
	TooWarmC float64
	WarmFor  time.Duration
	// TooColdC raises too-cold after ColdFor; 0 = by the lot's yeast.
	TooColdC float64
	ColdFor  time.Duration
	// SilentIntervals without a reading make a sensor silent, but never less
	// than SilentAfter.
	SilentIntervals float64
	SilentAfter     time.Duration
	Quiet           Quiet
	Digest          Digest
}

// Defaults fills what is zero.
func (c Config) Defaults() Config {
	fill := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	wait := func(p *time.Duration, v time.Duration) {
		if *p == 0 {
			*p = v
		}
	}
	fill(&c.TooWarmC, 30)
	wait(&c.WarmFor, 2*time.Hour)
	wait(&c.ColdFor, 24*time.Hour)
	fill(&c.SilentIntervals, 6)
	wait(&c.SilentAfter, 30*time.Minute)
	return c
}

// Silence is how long a sensor that is due every interval may say nothing.
func (c Config) Silence(interval time.Duration) time.Duration {
	return max(c.SilentAfter, time.Duration(c.SilentIntervals*float64(interval)))
}

// Recipient is told of alerts of at least a severity.
type Recipient struct {
	Name  string
	Least Severity
}
