package fit

// nearOrder solves long lists of which some pieces may be moved.
func nearOrder(e *effort, p *Problem) (Answer, bool) {
	q := *p
	q.Order = Keep
	a, ok := inOrder(e, &q)
	if !ok {
		return a, false
	}
	a.Score = p.Score(a)
	a.Proved = a.Proved && len(a.LeftOut) == 0
	return a, true
}
