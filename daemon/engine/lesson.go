package engine

import (
	"cmp"
	"reflect"
	"slices"
	"time"

	"conditiond/alerts"
	"conditiond/model"
	"conditiond/model/estimate"
)

// Learnt is the lesson that a lot without a gauge goes by from now on; none = by
// sugar and temperature alone.
type Learnt struct {
	Lot    string           `json:"lot"`
	Lesson *estimate.Lesson `json:"lesson,omitempty"`
}

// lessons are every six hours: what is learnt lasts for days.
const lessons = 6 * time.Hour

// learn what gauges tell of the lot's yeast, if it has none itself. What is
// decided is journalled, so that it stays whatever becomes of who taught it.
func (e *Engine) learn(en *Entry, l *lot, est *estimate.Estimator) {
	if l.gauge != "" || e.Behind() || !en.At.Equal(en.At.Truncate(lessons)) {
		return
	}
	now := e.lessonFor(l)
	if reflect.DeepEqual(now, l.Lesson) {
		return
	}
	est.Learn(now)
	en.Lessons = append(en.Lessons, Learnt{l.Document.ID, now})
}

// lessonFor a lot, from the one that is most alike and has something to teach.
func (e *Engine) lessonFor(l *lot) *estimate.Lesson {
	for _, o := range e.teachers(l) {
		if now := o.teaches(l.Lesson); now != nil {
			now.Batch = l.batch(o)
			return now
		}
	}
	return nil
}

// teachers are the gauged lots whose yeast may be taken for a lot's own: parts of
// its batch first, then what was capped nearest to it.
func (e *Engine) teachers(l *lot) []*lot {
	list := slices.DeleteFunc(e.ordered(), func(o *lot) bool {
		return o.gauge == "" || !l.batch(o) && !(l.sameYeast(o) && o.Document.Space == l.Document.Space)
	})
	slices.SortStableFunc(list, func(a, b *lot) int {
		if d := boolInt(l.batch(b)) - boolInt(l.batch(a)); d != 0 {
			return d
		}
		return cmp.Compare(l.apart(a), l.apart(b))
	})
	return list
}

// sameYeast as far as documents say it. Live drinks are a world of their own.
func (l *lot) sameYeast(o *lot) bool {
	a, b := l.Document, o.Document
	return a.Yeast == b.Yeast && a.YeastState == b.YeastState && (a.StopAtVolumes > 0) == (b.StopAtVolumes > 0)
}

// oneBatch is how far apart parts of one batch are capped at most.
const oneBatch = 48 * time.Hour

// batch says whether two lots are parts of one: the same beer, primed with the
// same, at one time.
func (l *lot) batch(o *lot) bool {
	a, b := l.Document, o.Document
	a.Beer.VolumeL, b.Beer.VolumeL = 0, 0
	sugar := func(p, q model.Priming) bool { return p.Sugar == q.Sugar }
	return l.sameYeast(o) && a.Beer == b.Beer && slices.EqualFunc(a.Priming, b.Priming, sugar) && l.apart(o) <= oneBatch
}

func (l *lot) apart(o *lot) time.Duration {
	return l.Document.PackagedAt.Sub(o.Document.PackagedAt).Abs()
}

// teaches what the lot's gauge has to say. While it can't say, what was learnt
// from it before stands, unless that has become doubtful.
func (l *lot) teaches(before *estimate.Lesson) *estimate.Lesson {
	if l.Taught != nil && l.Taught.Current() {
		return new(*l.Taught)
	}
	doubtful := false
	if l.estimator != nil {
		if now, ok := l.estimator.Lesson(); ok {
			return &now
		}
		doubtful = l.estimator.Doubtful()
	}
	if before == nil || before.From != l.Document.ID || doubtful || !before.Current() {
		return nil
	}
	return new(*before)
}

// lastLesson is what a lot leaves when it is closed.
func (l *lot) lastLesson() *estimate.Lesson {
	if now, ok := l.estimator.Lesson(); ok {
		return &now
	}
	return nil
}

func (e *Engine) applyLessons(en Entry) {
	for _, x := range en.Lessons {
		l := e.lots[x.Lot]
		if l == nil {
			continue // the journal keeps its opening no more
		}
		l.Lesson = x.Lesson
		if l.estimator != nil && (en.next == nil || en.next.estimators[x.Lot] == nil) {
			l.estimator.Learn(x.Lesson)
		}
	}
}

// yeastAsIn names the lot that a lesson is from; empty = there is none.
func (e *Engine) yeastAsIn(l *lot, x *estimate.Lesson) string {
	if x == nil || !x.Current() {
		return ""
	}
	if o := e.lots[x.From]; o != nil && o.Document.Name != "" && o.Document.Name != l.Document.Name {
		return o.Document.Name
	}
	return x.From
}

// kin names the gauged part of a lot's batch that makes more gas than was entered;
// empty = none. What was told of it stands when that part goes into the cold or is
// closed, for then its gauge says nothing more.
func (e *Engine) kin(l *lot) string {
	told := func(x *lot) bool { return e.book.Severity(x.Document.ID)(alerts.UnexpectedFermentation, "") != "" }
	for _, o := range e.ordered() {
		if o.gauge != "" && l.batch(o) && (told(o) || told(l) && (o.ChilledAt != nil || o.ClosedAt != nil)) {
			return cmp.Or(o.Document.Name, o.Document.ID)
		}
	}
	return ""
}

// goesBy is the lot's lesson after the entry.
func (l *lot) goesBy(en *Entry) *estimate.Lesson {
	for _, x := range en.Lessons {
		if x.Lot == l.Document.ID {
			return x.Lesson
		}
	}
	return l.Lesson
}
