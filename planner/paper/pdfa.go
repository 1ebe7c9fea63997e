package paper

import (
	"encoding/binary"
	"fmt"
	"math"
)

// xmp is the metadata that makes a file PDF/A-2b (ISO 19005-2, 6.6). It repeats
// what the document's information says.
func xmp(title, lang string) []byte {
	if lang != "" {
		lang = "\n<dc:language><rdf:Bag><rdf:li>" + escaped(lang) + "</rdf:li></rdf:Bag></dc:language>"
	}
	return fmt.Appendf(nil, `<?xpacket begin="%s" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">
<pdfaid:part>2</pdfaid:part>
<pdfaid:conformance>B</pdfaid:conformance>
<dc:format>application/pdf</dc:format>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">%s</rdf:li></rdf:Alt></dc:title>%s
<pdf:Producer>%s</pdf:Producer>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>`, "\uFEFF", escaped(title), lang, producer)
}

// srgbProfile is an ICC version 2 display profile of the sRGB space: the
// primaries of IEC 61966-2-1 adapted to D50 (as in the profile that the ICC
// publishes) and its transfer curve in 1024 steps.
func srgbProfile() []byte {
	xyz := func(x, y, z float64) []byte {
		b := append([]byte("XYZ "), 0, 0, 0, 0)
		for _, v := range []float64{x, y, z} { // s15Fixed16
			b = binary.BigEndian.AppendUint32(b, uint32(int32(math.Round(v*65536))))
		}
		return b
	}
	const steps = 1024
	curve := append([]byte("curv"), 0, 0, 0, 0)
	curve = binary.BigEndian.AppendUint32(curve, steps)
	for i := range steps {
		v := float64(i) / (steps - 1)
		if v <= 0.04045 {
			v /= 12.92
		} else {
			v = math.Pow((v+0.055)/1.055, 2.4)
		}
		curve = binary.BigEndian.AppendUint16(curve, uint16(math.Round(v*65535)))
	}
	name := "sRGB\x00"
	desc := append([]byte("desc"), 0, 0, 0, 0)
	desc = binary.BigEndian.AppendUint32(desc, uint32(len(name)))
	desc = append(desc, name...)
	desc = append(desc, make([]byte, 4+4+2+1+67)...) // no Unicode and no script name
	text := append([]byte("text\x00\x00\x00\x00"), "No rights reserved.\x00"...)

	tags := []struct {
		sig  string
		data []byte
	}{
		{"desc", desc}, {"cprt", text}, {"wtpt", xyz(0.9642, 1, 0.8249)},
		{"rXYZ", xyz(0.4360, 0.2225, 0.0139)}, {"gXYZ", xyz(0.3851, 0.7169, 0.0971)}, {"bXYZ", xyz(0.1431, 0.0606, 0.7141)},
		{"rTRC", curve}, {"gTRC", nil}, {"bTRC", nil}, // the three share one curve
	}
	table := binary.BigEndian.AppendUint32(nil, uint32(len(tags)))
	var body []byte
	at, size := 0, 0
	for _, t := range tags {
		if t.data != nil {
			at, size = 128+4+12*len(tags)+len(body), len(t.data)
			body = append(body, t.data...)
			for len(body)%4 != 0 {
				body = append(body, 0)
			}
		}
		table = append(table, t.sig...)
		table = binary.BigEndian.AppendUint32(table, uint32(at))
		table = binary.BigEndian.AppendUint32(table, uint32(size))
	}
	head := make([]byte, 128)
	binary.BigEndian.PutUint32(head, uint32(128+len(table)+len(body)))
	binary.BigEndian.PutUint32(head[8:], 0x02100000) // version 2.1
	copy(head[12:], "mntrRGB XYZ ")
	binary.BigEndian.PutUint16(head[24:], 2000) // a fixed date: year, month, day
	binary.BigEndian.PutUint16(head[26:], 1)
	binary.BigEndian.PutUint16(head[28:], 1)
	copy(head[36:], "acsp")
	copy(head[68:], xyz(0.9642, 1, 0.8249)[8:]) // the D50 illuminant
	return append(append(head, table...), body...)
}
