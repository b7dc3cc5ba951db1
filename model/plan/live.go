package plan

import "fmt"

// liveDrink is one that is stopped, not finished: there is no end to wait for.
func (d desk) liveDrink() []caution {
	if !d.live() {
		return nil
	}
	stop := d.lot.StopAtVolumes
	x := d.weakest()
	at := d.site.room()
	mark := fmt.Sprintf("Chill or stop it at %.1f volumes, %.2f bar at %g °C", float64(stop), float64(x.sealed.Gauge(stop, at)), float64(at))
	return do(mark, ". Get ready at %.1f volumes, %.2f bar. A live drink: it could come to %.0f volumes, so it is never done by itself. "+
		"In a warm room kombucha takes some 2 to 4 days to its mark, ginger beer 1 to 2 (common practice, no source): look twice a day. "+
		"Have the place in the fridge before you fill, use plastic bottles for carbonated drinks, and drink within days: it goes on slowly in the cold. "+
		"%sThis program gives no advice on heating bottles.",
		float64(stop)-0.3, float64(x.sealed.Gauge(stop-0.3, at)), float64(d.potential()), d.without())
}

// without a limit gravity the end is a guess on the cautious side.
func (d desk) without() string {
	if d.lot.Beer.LimitGravity > 0 {
		return ""
	}
	return fmt.Sprintf("(No limit gravity is known, so all extract from %.3f on is counted.) ", d.lot.Beer.FinalGravity)
}
