package estimate

// past is a history that is lived through again, because what was thought of it
// is of an earlier form.
type past struct {
	all history
	as  Estimator // as it was then, hour by hour
}

// relive draws the possible bottles anew, to live through a history with them.
func (e *Estimator) relive(all history) {
	p := &past{all, *e}
	p.as.now.history = history{capC: all.capC, open: all.open, opens: all.opens}
	p.as.now.cloud = newCloud(e.belief, e.laws, &p.as.now.history, e.seed)
	e.past = p
}

// Behind says whether there are hours to be lived through again. Until then the
// estimator takes readings in and says nothing.
func (e *Estimator) Behind() bool { return e.past != nil }

// CatchUp lives through one more of them, if it is behind: some milliseconds. A
// past that is over brings it to where its checkpoint was.
func (e *Estimator) CatchUp() {
	p := e.past
	if p == nil {
		return
	}
	if i := p.as.now.history.hours(); i < p.all.hours() {
		p.as.live(float64(p.all.room[i]), float64(p.all.gauge[i]), p.all.seen[i])
		return
	}
	e.now.history, e.now.cloud = p.as.now.history, p.as.now.cloud
	e.past = nil
	e.teach()
	e.now.said = e.answer()
}

func (p *past) clone() *past {
	if p == nil {
		return nil
	}
	out := &past{p.all, *p.as.Clone()}
	out.as.now.cloud = p.as.now.cloud.clone()
	return out
}
