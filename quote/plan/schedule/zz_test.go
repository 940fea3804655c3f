package schedule
import ("testing";"context";"time";"fmt")
func TestZZ(t *testing.T) {
	for k, p := range []func() (n string, m *model){
		func() (string, *model) { p := commission(); p.Runs=0; m,_ := compile(&p); return "commission", m },
		func() (string, *model) { p := shopOf144(); p.Runs=0; m,_ := compile(&p); return "144", m },
	} {
		n, m := p()
		ctx := newMeter(context.Background(), Options{}, 200, 0)
		g := newGenerator(m)
		people, _ := search(m, 200, m.start, ctx)
		t0 := time.Now()
		q := m.lowerBound(g.cal, people[0].score.finish)
		t1 := time.Now()
		f := people[0].score.finish
		people, err := m.reason(g, people, ctx)
		fmt.Println(k, n, "dues", m.dues, f-m.start, "quick", q-m.start, t1.Sub(t0), "floor", m.floor-m.start, "finish", people[0].score.finish-m.start, time.Since(t1), err)
	}
}
