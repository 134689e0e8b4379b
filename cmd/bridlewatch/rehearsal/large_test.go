package rehearsal

import "testing"

func TestLargePlant(t *testing.T) {
	cfg, err := Large(120)
	if err != nil {
		t.Fatal(err)
	}
	signals := 0
	for _, g := range cfg.Gauges {
		signals += len(g.Signals)
	}
	if len(cfg.Gauges) != 120 || len(cfg.Sources) != 3 || signals != 720 {
		t.Errorf("%d gauges, %d sources, %d signals; want 120, 3 and 720", len(cfg.Gauges), len(cfg.Sources), signals)
	}
	p, err := Start(t.Context(), Options{Config: cfg, Speed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
}
