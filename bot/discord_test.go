package main

import (
	"testing"

	"benchbell/bot/chat"
	"benchbell/bot/discord/discordtest"
)

// discordHouse is a house on Discord's stand-in, and its people.
func discordHouse(t *testing.T, env map[string]string) (*house, people) {
	t.Helper()
	s := discordtest.New(t)
	role := s.AddRole(discordtest.ManageServer | discordtest.ManageThreads)
	ilka, jorin, mara := s.AddPerson("Ilka"), s.AddPerson("Jorin"), s.AddPerson("Mara", role)
	all := map[string]string{"BENCHBELL_LISTEN": "off", "BENCHBELL_STUDIO": hurriedStudio(t), "BENCHBELL_DISCORD_TOKEN": s.Token(),
		"BENCHBELL_DISCORD_GUILD": s.Guild(), "BENCHBELL_DISCORD_STUDIO_ROLE": role, "BENCHBELL_DISCORD_API": s.URL()}
	for k, v := range env {
		all[k] = v
	}
	h := openHouse(t, all)
	t.Cleanup(func() {
		for _, p := range s.Problems() {
			t.Error("the service refuses: ", p)
		}
	})
	return h, people{client: ilka.Peer(), other: jorin.Peer(), studio: mara.Peer(),
		board: chat.ThreadID("discord:" + s.Channel()), unanswered: true}
}

// The same conversation on Discord.
func TestHouseOnDiscord(t *testing.T) {
	h, who := discordHouse(t, nil)
	golden(t, "discord", converseThrough(t, h, who))
	h.quotedBy(t, "bot")
}
