package drawing

// spread moves labels of the given heights so that none overlaps, their order
// is kept, all stay within [top, bottom], and the sum of squared
// displacements from their anchors is least. anchors are the wanted centres,
// ascending; the result holds centres. The caller sees to it that the heights
// fit between top and bottom.
//
// Taking away the height of everything above turns the minimum gap into mere
// order, and least squares under order is isotonic regression, solved by
// pooling neighbours that violate it.
func spread(anchors, heights []float64, top, bottom float64) []float64 {
	type block struct {
		sum   float64
		count int
	}
	var blocks []block
	offset := 0.0
	offsets := make([]float64, len(anchors))
	for i := range anchors {
		offsets[i] = offset + heights[i]/2
		offset += heights[i]
		blocks = append(blocks, block{anchors[i] - offsets[i], 1})
		for n := len(blocks); n > 1 && mean(blocks[n-2].sum, blocks[n-2].count) >= mean(blocks[n-1].sum, blocks[n-1].count); n = len(blocks) {
			blocks[n-2].sum += blocks[n-1].sum
			blocks[n-2].count += blocks[n-1].count
			blocks = blocks[:n-1]
		}
	}
	centres := make([]float64, 0, len(anchors))
	for _, b := range blocks {
		start := min(max(mean(b.sum, b.count), top), bottom-offset)
		for range b.count {
			centres = append(centres, start+offsets[len(centres)])
		}
	}
	return centres
}

func mean(sum float64, n int) float64 { return sum / float64(n) }
