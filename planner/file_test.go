package planner

import (
	"bytes"
	"reflect"
	"strings"
	"testing"
)

func TestPlanFileRoundTrip(t *testing.T) {
	p := make1(t, request(t, "C60", mix(600.123, 900.5, 200, 1000)))
	data, err := Encode(p)
	if err != nil {
		t.Fatal(err)
	}
	q, err := Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(p, q) {
		t.Errorf("a plan changed by being written and read:\n%+v\n%+v", p, q)
	}
	for _, want := range []string{`"format": "longside plan"`, `"version": 1`, `"usable_s": 1760`, `"start_s": 7`, `"length_s": 600.123`, `"left_out": []`} {
		if !strings.Contains(string(data), want) {
			t.Errorf("the plan file lacks %s", want)
		}
	}
}

func TestDecodeRefuses(t *testing.T) {
	for name, c := range map[string]struct{ data, says string }{
		"empty":           {"", "not a plan file"},
		"text":            {"hello", "not a plan file"},
		"other":           {`{"format":"shopping"}`, "not a plan file"},
		"newer":           {`{"format":"longside plan","version":9}`, "newer longside"},
		"none":            {`{"format":"longside plan"}`, "there is none such"},
		"thickness":       {`{"format":"longside plan","version":1,"tapes":[{"name":"C60","thickness_um":0}]}`, "thickness"},
		"endless":         {`{"format":"longside plan","version":1,"tapes":[{"name":"C60","thickness_um":12,"length_m":1e300}]}`, "length"},
		"negative":        {`{"format":"longside plan","version":1,"tapes":[{"name":"C60","thickness_um":12,"length_m":100,"hub_radius_mm":11,"full_radius_mm":22.45,"sides":[{"side":"A","run_s":1800,"tracks":[{"start_s":-5}]}]}]}`, "negative"},
		"seconds as text": {`{"format":"longside plan","version":1,"tapes":[{"sides":[{"used_s":"7"}]}]}`, "damaged"},
		"out of range":    {`{"format":"longside plan","version":1,"within_s":1e18}`, "out of range"},
	} {
		if _, err := Decode([]byte(c.data)); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.says)
		}
	}
}

// FuzzDecode: what is read as a plan is written and read again as the same plan.
func FuzzDecode(f *testing.F) {
	data, err := Encode(richPlan(f))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Decode(data)
		if err != nil {
			return
		}
		once, err := Encode(p)
		if err != nil {
			t.Fatalf("a plan that was read cannot be written: %v", err)
		}
		q, err := Decode(once)
		if err != nil {
			t.Fatalf("a plan that was written cannot be read: %v", err)
		}
		twice, err := Encode(q)
		if err != nil || !bytes.Equal(once, twice) {
			t.Errorf("writing twice gives two files: %v", err)
		}
	})
}
