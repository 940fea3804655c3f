package document_test

import (
	"bytes"
	"fmt"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"benchbell/quote"
	"benchbell/quote/document"
	"benchbell/quote/gaugetest"
)

// week is an ordinary week of two makers; one day is closed, and there is more drying than one lane holds.
func week(t *testing.T, wet int) document.Days {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	at := func(day, h, m int) time.Time { return time.Date(2026, 11, 30+day, h, m, 0, 0, zone) }
	d := document.Days{At: at(0, 11, 20)}
	for _, day := range []int{0, 1, 3, 4, 7} {
		d.Days = append(d.Days, document.Day{Opens: at(day, 9, 0), Closes: at(day, 17, 0)})
	}
	d.Days[1].Agreed = []document.DaysAgreed{{Commission: "C0007", What: "first fitting", At: at(1, 14, 0)}}
	d.Days[3].Agreed = []document.DaysAgreed{{Commission: "C0002"}, {Commission: "C0009", What: "handing over", At: at(4, 16, 0)}}
	work := func(c string, day, h, m, minutes int, titles ...string) document.DaysWork {
		from := at(day, h, m)
		return document.DaysWork{Commission: quote.CommissionID(c), Titles: titles, From: from, To: from.Add(time.Duration(minutes) * time.Minute)}
	}
	done, hand := work("C0002", 0, 9, 0, 95, "Clear coating, coat 1 of 2"), work("C0007", 0, 10, 50, 70, "Cut 5 mm foam", "Cut 2 mm foam")
	done.Done, hand.InHand = true, true
	d.Rows = []document.DaysRow{{Title: "Mara", Maker: true, Work: []document.DaysWork{done, hand, work("C0007", 0, 13, 0, 200, "Bevelling and sanding edges", "Heat forming"), work("C0007", 1, 14, 0, 40, "First fitting"),
		work("C0009", 3, 9, 0, 20, "Priming, coat 1 of 3"), work("C0009", 3, 11, 0, 20, "Priming, coat 2 of 3"), work("C0002", 4, 9, 0, 90, "Packing"), work("C0011", 7, 9, 0, 480, "Gluing seams and darts")}},
		{Title: "Jonas", Maker: true, Work: []document.DaysWork{work("C0009", 0, 9, 0, 460, "Gluing seams and darts", "Laying on plates and trim"), work("C0009", 1, 9, 0, 240, "Punching and drilling holes", "Heat sealing")}},
		{Title: "Spray booth", Work: []document.DaysWork{done, work("C0009", 3, 9, 0, 20, "Priming, coat 1 of 3"), work("C0009", 3, 11, 0, 20, "Priming, coat 2 of 3")}},
		{Title: "Bench", Work: []document.DaysWork{hand, work("C0009", 0, 9, 0, 460, "Gluing seams and darts")}}}
	d.Wet = []document.DaysWet{{Commission: "C0002", Material: "Clear coat, water-based", From: at(0, 10, 35), To: at(1, 15, 20)}}
	for i := range wet {
		d.Wet = append(d.Wet, document.DaysWet{Commission: quote.CommissionID(fmt.Sprintf("C%04d", 9+i)), Material: "Flexible primer", From: at(3, 9, 20), To: at(3, 10, 45+i), Planned: i%2 == 0})
	}
	return d
}

// The days stand on one page of the paper with all that is agreed, and titles of 22 points. As they were when they were last looked at.
func TestDays(t *testing.T) {
	for _, paper := range document.DaysPapers {
		d := week(t, 3)
		f, err := d.Print(paper)
		if err != nil {
			t.Fatal(err)
		}
		shown(t, "days-"+paper+".pdf", f.Data)
		gaugetest.Golden(t, "testdata/days-"+strings.ToLower(paper)+".pdf", f.Data)
		if again, err := week(t, 3).Print(paper); err != nil || !bytes.Equal(again.Data, f.Data) {
			t.Errorf("the same days give other bytes, %v", err)
		}
		text := strings.Join(strings.Fields(pdfText(t, f.Data)), " ")
		for _, has := range []string{"Mon 30 Nov", "Thu 3 Dec", "Mon 7 Dec", "Mara", "Jonas", "Spray booth", "14:00 C0007", "15:20 C0002", "C0002 promised", "16:00 C0009", "handing over", "first fitting", "As planned on Mon 30 Nov, 11:20"} {
			if !strings.Contains(text, has) {
				t.Errorf("%s does not say %q: %s", paper, has, text)
			}
		}
		if strings.Contains(text, "Wed 2 Dec") {
			t.Error("a day that is closed is there")
		}
		cmd := exec.CommandContext(t.Context(), gaugetest.Tool(t, "pdfinfo"), "-")
		cmd.Stdin = bytes.NewReader(f.Data)
		info, err := cmd.Output()
		want := map[string]string{"A3": "1190.55 x 841.89 pts (A3)", "A4": "841.89 x 595.28 pts (A4)"}[paper] // ISO 216
		if err != nil || !strings.Contains(string(info), want) || !strings.Contains(string(info), "Pages:           1") {
			t.Errorf("%s is %s, %v", paper, info, err)
		}
	}
	if _, err := week(t, 0).Print("B5"); err == nil {
		t.Error("it is printed on B5")
	}
}

// However much there is, the page holds it or says how much more there is; nobody's line is lost without a word.
func TestDaysHoldAll(t *testing.T) {
	f, err := week(t, 60).Print("A4")
	if err != nil {
		t.Fatal(err)
	}
	shown(t, "days-full.pdf", f.Data)
	text := pdfText(t, f.Data)
	m := regexp.MustCompile(`and (\d+) more`).FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("it does not say that there is more: %s", text)
	}
	said := len(regexp.MustCompile(`(?:10|11):[0-5]\d C00`).FindAllString(text, -1))
	if more, err := strconv.Atoi(m[1]); err != nil || said+more != 60 {
		t.Errorf("%d lines and %d more are not 60", said, more)
	}
	if f, err = week(t, 2).Print("A3"); err != nil || strings.Contains(pdfText(t, f.Data), " more") {
		t.Errorf("it says that there is more, and there is not: %v", err)
	}
	if f, err = (document.Days{At: time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)}).Print("A4"); err != nil || len(f.Data) == 0 {
		t.Errorf("of no days at all: %v", err)
	}
}
