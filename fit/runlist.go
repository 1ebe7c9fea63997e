package fit

// run lists the numbers from one up to another.
func run(from, to int) []int {
	list := make([]int, 0, max(0, to-from))
	for i := from; i < to; i++ {
		list = append(list, i)
	}
	return list
}
