package plan

import "fmt"

// liveDrink is one that is stopped, not finished: there is no end to wait for.
func (d desk) liveDrink() []caution {
	if !d.live() {
		return nil
	}
	stop := d.lot.StopAtVolumes
	x := d.weakest()
	return warn("A live drink: it could come to %.0f volumes, so it is never done by itself. "+
		"At %.1f volumes the gauge shows %.1f bar at %g °C: then chill or stop it at once; at %.1f, %.1f bar, get ready. "+
		"Have the place in the fridge before you fill, use plastic bottles for carbonated drinks, and drink within days: it goes on slowly in the cold. "+
		"%s This program gives no advice on heating bottles.",
		float64(d.potential()), float64(stop), float64(x.sealed.Gauge(stop, room)), float64(room),
		float64(stop)-0.3, float64(x.sealed.Gauge(stop-0.3, room)), d.without())
}

// without a limit gravity the end is a guess on the cautious side.
func (d desk) without() string {
	if d.lot.Beer.LimitGravity > 0 {
		return ""
	}
	return fmt.Sprintf("(No limit gravity is known, so all extract from %.3f on is counted.)", d.lot.Beer.FinalGravity)
}
