package report_test

import (
	"os"
	"strings"
	"testing"

	"aplomb/device"
	"aplomb/plots/internal/exampledata"
)

func TestDump(t *testing.T) {
	dir := os.Getenv("DUMP")
	if dir == "" {
		t.Skip()
	}
	save := func(name string, f exampledata.Fitting) {
		if err := os.WriteFile(dir+"/"+name+".html", []byte(write(t, f)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	cases := func(codes ...string) (all []exampledata.ShoeCase) {
		for i, code := range codes {
			s := exampledata.A
			if i%3 == 1 {
				s = exampledata.B
			}
			s.Shoe.Code = code
			all = append(all, s)
		}
		return all
	}
	save("two", exampledata.Usual())
	save("three", exampledata.New(2, 6, device.Feet[:], cases("A", "B", "C")...))
	save("one", exampledata.New(1, 6, device.Feet[:], exampledata.A))
	save("foot", exampledata.New(2, 6, device.Feet[1:], exampledata.A, exampledata.B))
	save("forty", exampledata.New(1, 40, device.Feet[:], exampledata.A, exampledata.B))
	save("twelve", exampledata.New(1, 3, device.Feet[:], cases(strings.Split("ABCDEFGHIJKL", "")...)...))
	long := strings.Repeat("long-code-", 6)[:58]
	save("codes", exampledata.New(2, 6, device.Feet[:], cases(long+"-1", long+"-2")...))
	small := exampledata.A
	small.Shoe.Code, small.Shoe.PlatformMM = "child", [2]float64{24, 14}
	big := exampledata.B
	big.Shoe.Code, big.Shoe.PlatformMM = "wide", [2]float64{52, 32}
	save("sizes", exampledata.New(2, 6, device.Feet[:], small, big))
	nothing := exampledata.Usual()
	nothing.Results = nothing.Results[:1]
	nothing.Results[0].Releves = nil
	c := *nothing.Comparison
	c.Shoes, c.Differences, c.Feet, c.RestsOn, c.Findings, c.Answer = nil, nil, nil, nil, nil, "No relevé could be measured"
	nothing.Comparison = &c
	save("nothing", nothing)
}
