package plan

// index finds nodes by key: open addressing, a power of two of slots, each 0
// or a node's number plus 1.
type index struct{ slots []int32 }

func (x *index) find(all []node, key uint64) int {
	mask := len(x.slots) - 1
	slot := int(key) & mask
	for n := x.slots[slot]; n != 0 && all[n-1].key != key; n = x.slots[slot] {
		slot = (slot + 1) & mask
	}
	return slot
}

// put enters the last node at the slot that find gave.
func (x *index) put(all []node, slot int) {
	x.slots[slot] = int32(len(all))
	if 2*len(all) < len(x.slots) {
		return
	}
	x.slots = make([]int32, 4*len(x.slots))
	for n := range all {
		x.slots[x.find(all, all[n].key)] = int32(n + 1)
	}
}

// key is that of the position after an action: the outcomes seen, the repairs
// tried, the place and the set-ups, in whatever order they came.
func (s *search) key(from *node, to *position, kind Kind, which uint8, outcome int) uint64 {
	key := from.key ^ mix(uint64(kind)<<32|uint64(which)<<16|uint64(outcome))
	if from.place != to.place {
		key ^= mix(1<<40|uint64(from.place)) ^ mix(1<<40|uint64(to.place))
	}
	if from.ready != to.ready {
		key ^= mix(1<<41|uint64(from.ready)) ^ mix(1<<41|uint64(to.ready))
	}
	return key
}

// mix spreads a number over 64 bits (the finisher of SplitMix64: Steele, Lea
// and Flood 2014).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}
