package estimate

import "math"

// linear are the things that enter the gauge in a straight line once the
// course of a bottle is known, so they needn't be guessed: they are solved for,
// in each possible bottle, by least squares with the prior.
type linear [straights]float64

const (
	residual = iota // CO2 at capping, volumes
	airBar          // nitrogen of the air trapped at capping, bar at 20 °C
	zero            // the sensor's offset, bar
	holding         // solubility and span, relative
	creep           // of the sensor, bar a day
	straights
)

const pairs = straights * (straights + 1) / 2

// balance gathers the normal equations: info z = pull.
type balance struct {
	info [pairs]float64 // lower triangle, row by row
	pull linear
	sq   float64
}

func newBalance(dev linear) balance {
	var b balance
	for i := range straights {
		b.info[i*(i+3)/2] = 1 / (dev[i] * dev[i])
	}
	return b
}

// add an observation y = h·z + noise of precision w.
func (b *balance) add(h *linear, y, w float64) {
	k := 0
	for i := range straights {
		hw := h[i] * w
		b.pull[i] += hw * y
		for j := 0; j <= i; j++ {
			b.info[k] += hw * h[j]
			k++
		}
	}
	b.sq += y * y * w
}

// root is the Cholesky factor of info, lower triangle row by row.
func (b *balance) root() (l [pairs]float64) {
	cholesky(l[:], b.info[:])
	return l
}

// cholesky factor of a symmetric matrix, lower triangles row by row.
func cholesky(l, of []float64) {
	for i, ri := 0, 0; ri < len(of); i++ {
		for j := 0; j <= i; j++ {
			rj := j * (j + 1) / 2
			s := of[ri+j]
			for k := range j {
				s -= l[ri+k] * l[rj+k]
			}
			if i == j {
				l[ri+j] = math.Sqrt(math.Max(s, 1e-12))
			} else {
				l[ri+j] = s / l[rj+j]
			}
		}
		ri += i + 1
	}
}

// evidence is the logarithm of how well the bottle explains all observations,
// the straight terms integrated out; up to a constant.
func (b *balance) evidence() float64 {
	l := b.root()
	det, fit := 1.0, 0.0
	var y linear
	for i := range straights {
		r := i * (i + 1) / 2
		s := b.pull[i]
		for k := range i {
			s -= l[r+k] * y[k]
		}
		y[i] = s / l[r+i]
		fit += y[i] * y[i]
		det *= l[r+i]
	}
	return -0.5*(b.sq-fit) - math.Log(det)
}

// draw is a sample of the terms: their best values and, scaled by the
// uncertainty that remains, a given noise.
func (b *balance) draw(noise *linear) (z linear) {
	l := b.root()
	var y linear
	for i := range straights {
		r := i * (i + 1) / 2
		s := b.pull[i]
		for k := range i {
			s -= l[r+k] * y[k]
		}
		y[i] = s / l[r+i]
	}
	for i := straights - 1; i >= 0; i-- {
		s := y[i] + noise[i]
		for k := i + 1; k < straights; k++ {
			s -= l[k*(k+1)/2+i] * z[k]
		}
		z[i] = s / l[i*(i+3)/2]
	}
	return z
}
