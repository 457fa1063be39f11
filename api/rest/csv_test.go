package rest

import (
	"testing"

	"throughline/models"
)

// RFC 4180 has the line ends, the quotes and the line of names.
func TestTablesAreCSVThatASpreadsheetMayOpen(t *testing.T) {
	got, err := asCSV([]models.Involvement{
		{
			Record: exampleRecord(8), LogID: 4, Clock: models.Clock{Half: 2, Second: 2400}, Kind: models.KindCarry,
			Details: map[string]string{"gain_line": "over", "contact": "won"}, Measures: map[string]float64{"metres": 6.5},
			Note: "=SUM(A1), \"quick\"\nthen slow", VideoFrom: some(12.25), Moment: true,
		},
		{Record: exampleRecord(9), LogID: 4, Clock: models.Clock{Half: 1, Second: 0}, Kind: models.KindPass, Phase: some(3)},
	})
	want := "id,version,created_at,changed_at,log_id," +
		"clock.half,clock.second,kind,details,measures,results,dangers," +
		"possession,phase,linked_to,options,note,video_file," +
		"video_from,video_to,moment,head_contact,stand_down,ask,proposal,confirmed,key\r\n" +
		`8,1,2025-09-07T18:30:00Z,2025-09-07T18:30:00Z,4,2,2400,carry,` +
		`"{""contact"":""won"",""gain_line"":""over""}","{""metres"":6.5}",,,,,,,` +
		`"'=SUM(A1), ""quick""` + "\r\n" + `then slow",,12.25,,true,false,,,,false,` + "\r\n" +
		"9,1,2025-09-07T18:30:00Z,2025-09-07T18:30:00Z,4,1,0,pass,,,,,,3,,,,,,,false,false,,,,false,\r\n"
	if err != nil || string(got) != want {
		t.Errorf("%v\n%s\nwant\n%s", err, got, want)
	}
	none, err := asCSV([]models.Season{})
	if err != nil || string(none) != "id,version,created_at,changed_at,name,starts,ends\r\n" {
		t.Errorf("of nothing: %q, %v; want the names alone", none, err)
	}
}
