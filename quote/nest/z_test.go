package nest
import ("testing";"context")
func TestZ(t *testing.T){ for _,n:=range []int{30,60}{ for _, e := range []int{0,50000,100000,200000,800000} { p:=commission(n,60); p.Evaluations=e; s,_:=Solve(context.Background(),p,nil); t.Log(n,e,s.Evaluations,s.Cost,lastLength(p,s)) } } }
