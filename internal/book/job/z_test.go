package job
import ("testing";"strings";"time";"fmt")
func TestZ(t *testing.T){
 for n,s:=range map[string]string{"arr":"a="+strings.Repeat("[",500000),"arrc":"a="+strings.Repeat("[",100000)+strings.Repeat("]",100000),"inl":"a="+strings.Repeat("{a=",100000),"dots":"a"+strings.Repeat(".a",400000)+"=1","tabs":strings.Repeat("[[a]]\n",170000),"keys":func() string{var b strings.Builder;for i:=0;i<60000;i++{fmt.Fprintf(&b,"k%d=1\n",i)};return b.String()}(),"ctl":least+"[split]\npull="+strings.Repeat("[",100000)+strings.Repeat("]",100000)} {
 st:=time.Now(); _,err:=Parse("x",[]byte(s)); e:=err.Error(); if len(e)>100{e=e[:100]}; fmt.Println(n,time.Since(st),e)
 }
}
