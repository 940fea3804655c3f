package desk

import (
	"fmt"

	"benchbell/bot/chat"
	"benchbell/bot/shop"
)

// What is said of links to calendars.

const calendarFoot = "In your calendar program choose to subscribe to a calendar by its address, and paste it there. It follows the plan by itself; " +
	"programs look every half hour to once a day. Whoever has the address can read this calendar, and nothing else."

func sayCalendarLink(a *answer, o shop.CalendarLinkMade) chat.Reply {
	head := fmt.Sprintf("The calendar of *%s*: their days at the bench, what cures, their appointments:", o.Member.Name)
	if o.Member.Bench == "" {
		head = fmt.Sprintf("The calendar of *%s*: appointments and promised dates. It shows no work until *People* says who they are at the bench:", o.Member.Name)
	}
	return a.addressReply(a.d.cfg.CalendarAt, head, o.Secret, calendarFoot,
		chat.Button{Action: "end-member-calendar/" + o.Member.ID, Label: "End its links", Tone: chat.Grave})
}

func sayCalendarLinksEnded(_ *answer, o shop.CalendarLinksEnded) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("No link shows the calendar of %s any more. What a program has fetched stays with it.", o.Member.Name),
		Buttons: []chat.Button{{Action: "member-calendar/" + o.Member.ID, Label: "Calendar"}}}
}

func sayClientCalendarLink(a *answer, o shop.ClientCalendarLinkMade) chat.Reply {
	id := string(o.Commission.ID)
	return a.addressReply(a.d.cfg.CalendarAt, fmt.Sprintf("The calendar of %s: its appointments, and the date it is promised for:", id), o.Secret, calendarFoot,
		chat.Button{Action: "end-calendar/" + id, Label: "End its links", Tone: chat.Grave})
}

func sayClientCalendarLinksEnded(_ *answer, o shop.ClientCalendarLinksEnded) chat.Reply {
	id := string(o.Commission.ID)
	return chat.Reply{Text: fmt.Sprintf("No link shows the calendar of %s any more. What a program has fetched stays with it.", id),
		Buttons: []chat.Button{{Action: "calendar/" + id, Label: "Calendar"}}}
}
