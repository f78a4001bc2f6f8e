def test_the_house_answers(client):
    assert client.get("/health/").content == b"ok\n"
